"""Damaged and hostile files made from sound ones, and a child process that opens them."""
