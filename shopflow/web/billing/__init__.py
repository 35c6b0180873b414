"""Money: prices, quotes, invoices, credit notes and payments."""
