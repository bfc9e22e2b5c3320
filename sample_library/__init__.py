"""The sample library: a made-up archive of real picture files, with the answers."""
