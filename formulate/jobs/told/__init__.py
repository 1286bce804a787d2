"""What every answer is told with: its lines, its remarks, whether it stays clear."""
