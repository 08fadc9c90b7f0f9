"""What each command and each trouble leads to. A handler changes the state and returns a `Reply`; it calls no other."""
