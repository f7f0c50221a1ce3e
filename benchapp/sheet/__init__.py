"""The one-page verdict, labels and exports."""
