"""What do we remember? Frozen records, validated when made."""
