"""One file per family of questions: slots -> trade calculation -> wording."""
