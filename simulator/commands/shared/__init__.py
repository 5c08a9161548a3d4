"""What commands share: options, plans, weather, how an answer is given."""
