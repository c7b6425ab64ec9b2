"""The dialog of `stillblade new`: a person is asked, and out comes a job file that runs."""
