"""Quality control of daily values: limits, dates, whole columns, readings that are stuck."""
