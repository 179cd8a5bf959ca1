package bulletin

// ComposeUnder composes under another policy, so that tests can turn a rule off.
var ComposeUnder = composeUnder
