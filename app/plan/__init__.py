"""What a plan holds, and its file. No Qt."""
