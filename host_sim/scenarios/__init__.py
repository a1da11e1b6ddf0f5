"""The flights that come with the project, one TOML file each."""
