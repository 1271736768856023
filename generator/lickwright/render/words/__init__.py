"""What a study says in words: phrases, licks, comping, hand, practice."""
