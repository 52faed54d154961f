"""What datumray hands out: tables for the terminal and JSON."""
