"""One module per thing that a person records: one transaction, one journal line."""
