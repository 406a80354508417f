"""How far, how deep, how sure? Numbers and arrays in, numbers and arrays out."""
