package postgres

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"

	"github.com/jackc/pgx/v5"
)

// How the database learns who looks (migration 00130). A secret has a key, the database keeps a hash of the key, and a hash of
// that is the handle by which it finds the row. What goes to the database is a handle and a proof that is good in one
// transaction: RFC 5802, section 3, with the transaction's number for a nonce.

// keyOf is the key of a session's, a token's or a phone's secret. It never leaves this process.
func keyOf(secret string) [32]byte { return sha256.Sum256([]byte("tussock viewer " + secret)) }

// keptOf is what the database keeps of it.
func keptOf(secret string) [32]byte {
	key := keyOf(secret)
	return sha256.Sum256(key[:])
}

// handleOf is what the database finds it by. A handle opens nothing.
func handleOf(secret string) string {
	kept := keptOf(secret)
	handle := sha256.Sum256(kept[:])
	return hex.EncodeToString(handle[:])
}

// ViewerIn returns what tells the database, in the transaction of that number and in no other, who looks: the setting
// tussock.viewer. Whoever sees it learns nothing that opens anything.
func ViewerIn(transaction uint64, secret string) string {
	key, kept := keyOf(secret), keptOf(secret)
	cover := sha256.Sum256(binary.BigEndian.AppendUint64(kept[:], transaction))
	for i := range key {
		key[i] ^= cover[i]
	}
	return handleOf(secret) + hex.EncodeToString(key[:])
}

// begin begins a transaction and returns its number, in one round trip.
func begin(ctx context.Context, conn *sql.Conn, opening statement) (number uint64, err error) {
	err = native(conn, func(c *pgx.Conn) error {
		results, err := c.PgConn().Exec(ctx, (opening + "; SELECT pg_current_xact_id()").text()).ReadAll()
		if err != nil {
			return err
		}
		if len(results) != 2 || len(results[1].Rows) != 1 {
			return fmt.Errorf("begin: %d results", len(results))
		}
		number, err = strconv.ParseUint(string(results[1].Rows[0][0]), 10, 64)
		return err
	})
	return number, err
}

// commit ends a transaction. One in which a statement failed is rolled back by the database, whatever it is asked for.
func commit(ctx context.Context, conn *sql.Conn) error {
	return native(conn, func(c *pgx.Conn) error {
		tag, err := c.Exec(ctx, "COMMIT")
		if err == nil && tag.String() != "COMMIT" {
			err = errors.New("the transaction was rolled back")
		}
		return err
	})
}
