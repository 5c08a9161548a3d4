"""Parameter sets: frozen, bounded, sourced."""
