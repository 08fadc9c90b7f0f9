"""The console command, one small module per group: parse, call, translate errors."""
