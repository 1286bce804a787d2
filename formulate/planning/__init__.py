"""What a menu needs week by week: goods, packs, makings, other recipes."""
