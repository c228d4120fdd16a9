"""One module per thing that a person asks: data, with as little wording as possible."""
