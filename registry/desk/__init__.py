"""What does every interface hand out alike? Whole tasks over actions, documents, formats and storage."""
