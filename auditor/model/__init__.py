"""What the program knows: table schemas, the kit, the shoot log, the settings, the flags."""
