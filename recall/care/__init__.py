"""What was seen: ears, findings, hearing, tympanograms, people, risks. Pure."""
