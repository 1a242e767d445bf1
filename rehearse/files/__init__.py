"""Everything that touches the disk safely and says in one sentence what is wrong there."""
