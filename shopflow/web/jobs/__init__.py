"""Jobs from booking to collection, and the queries of their pages."""
