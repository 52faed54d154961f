"""What happens when something on the page is moved or chosen: one file for each panel."""
