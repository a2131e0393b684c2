"""The terminal pages: compose, bind, ask, show; every question and every save goes through the desk."""
