"""What a user can send when something does not work: this installation, its devices and times; nothing of a visit."""
