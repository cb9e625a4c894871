"""What each step yielded, whether that is changing, and where scrap is made."""
