"""The weekly batch: its steps in order, run plainly or as a flow of the orchestration engine, and when it is due."""
