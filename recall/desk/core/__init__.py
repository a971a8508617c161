"""What every act stands on: who acts, finding a person, planning again, taking back."""
