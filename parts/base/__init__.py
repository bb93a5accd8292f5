"""What every part is made from: lengths with units, guards, and tables of stock and fits, each row with its
source."""
