"""What is said outside, and decided of findings: questions, answers, readers' notes, rates, small decisions."""
