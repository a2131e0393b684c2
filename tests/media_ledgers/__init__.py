"""Small made-up ledgers of gouache, ink and coloured pencils, from the parcel to the scorecard."""
