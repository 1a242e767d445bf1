"""Long work in processes of its own, so that neither sound nor window ever waits."""
