"""One file per command: arguments in, one study, one record, one report, one exit status out."""
