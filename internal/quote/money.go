package quote

// Money is an amount in minor units (cents) of an ISO 4217 currency.
type Money struct {
	Minor    int64
	Currency string
}
