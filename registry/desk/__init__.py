"""What does every interface hand out alike? Whole tasks that take actions, documents, formats and storage together."""
