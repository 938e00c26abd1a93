"""Parts onto sheets: stock and demand in, proved layouts out."""
