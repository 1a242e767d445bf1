"""The drawn figure: fills the shapes of `routine.anatomy` with the window's colours."""
