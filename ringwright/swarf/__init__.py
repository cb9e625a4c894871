"""The mass account of the case shop, its swarf containers and its lots: what the pages ask."""
