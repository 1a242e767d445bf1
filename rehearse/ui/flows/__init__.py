"""Jobs that are done once in a while and fill the window until they are done or left."""
