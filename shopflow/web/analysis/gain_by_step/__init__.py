"""What each operation of a job was worth."""
