"""What a rule file may say, table by table."""
