"""The one SQLite file: schema, migrations, reading, writing, audit, backup, merge."""
