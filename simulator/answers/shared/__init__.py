"""What several answers share."""
