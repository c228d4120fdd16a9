"""One module per thing a person asks: data, no wording."""
