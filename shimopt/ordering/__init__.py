"""What to buy so that the final build needs no second order, and the card that says what to fit."""
