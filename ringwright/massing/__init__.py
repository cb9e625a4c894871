"""The mass account, pure: what was bought, what is part, what is swarf, and what is missing."""
