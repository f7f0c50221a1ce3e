"""The Qt window: views, dialogs and item models. No arithmetic, no SQL."""
