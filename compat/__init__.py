"""Ship meets berth: assessments, screening, accords, records; and the wiring of the project.

May import every other room; none of them may import this one.
"""
