"""The catalogue of findings: one entry each, the type of its field and all that is known of it.

The entries stand in the order in which a case file is written: `view`, `drum`, `canal`,
`hearing`; each file goes on where the one before it ends, and `care.ear.Ear` is the whole.
`entry` says what an entry may hold, and `care.catalogue` reads them.
"""
