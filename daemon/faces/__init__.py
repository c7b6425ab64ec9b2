"""Faces in other processes: the Desk over a socket. It knows nothing of the job but the Desk."""
