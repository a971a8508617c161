"""What somebody who may decide makes of plans: confirming, deciding, adopting a protocol."""
