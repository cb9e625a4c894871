"""What a part is: its facts, the rules they obey, and the rows folded from them."""
