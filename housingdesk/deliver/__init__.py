"""What goes to the shop besides the halves."""
