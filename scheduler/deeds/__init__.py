"""One module per thing a person records: one transaction, one journal line."""
