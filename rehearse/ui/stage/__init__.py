"""The stage display: what the athlete reads in a glance, from four metres, sweating."""
