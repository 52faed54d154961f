"""Command line, web viewer and pictures of datumray."""
