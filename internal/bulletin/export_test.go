package bulletin

// ComposeUnder and ReviseUnder work under another policy, so that tests can turn a rule off.
var (
	ComposeUnder = composeUnder
	ReviseUnder  = reviseUnder
)
