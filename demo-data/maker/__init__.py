"""Makes and checks the demo day. Python 3.11, standard library only; see ../README.md."""
