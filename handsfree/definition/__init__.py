"""What a visit is made of: procedure files and profiles, checked and compiled to a plan."""
