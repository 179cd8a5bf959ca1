package account

import (
	"context"
	"fmt"
	"runtime"

	"github.com/alexedwards/argon2id"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// params returns the least that the OWASP Password Storage Cheat Sheet names for Argon2id: 19 MiB, two passes, one lane.
func params() *argon2id.Params {
	return &argon2id.Params{Memory: 19456, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}
}

// memoryMost refuses a stored hash that would take more memory than any of ours, in KiB.
const memoryMost = 128 << 10

// queueMost is how many may wait for a turn before the others are told to come back.
const queueMost = 16

// A hasher takes turns: a hundred sign-ins at once would otherwise take 1.9 GB.
type hasher struct {
	turn  chan struct{}
	queue map[bool]chan struct{} // of known devices, and of all others: a crowd of guessers fills theirs alone
	dummy string                 // a hash of nothing that anybody can type
}

func newHasher() *hasher {
	// Of zero bytes, which are no password: the limits refuse an empty one.
	const dummy = "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
	length := runtime.NumCPU() + queueMost
	return &hasher{turn: make(chan struct{}, runtime.NumCPU()), dummy: dummy,
		queue: map[bool]chan struct{}{true: make(chan struct{}, length), false: make(chan struct{}, length)}}
}

// take waits for a turn and returns how to give it back.
func (h *hasher) take(ctx context.Context, known bool) (func(), error) {
	queue := h.queue[known]
	select {
	case queue <- struct{}{}:
	default:
		return nil, errs.New(errs.Unavailable, words.Mark("Many people are signing in at the moment. Please try again in a minute."))
	}
	select {
	case h.turn <- struct{}{}:
		return func() { <-h.turn; <-queue }, nil
	case <-ctx.Done():
		<-queue
		return nil, errs.Hide(errs.Unavailable, words.Mark("That took too long. Please try again."), ctx.Err())
	}
}

func (h *hasher) hash(ctx context.Context, password string) (string, error) {
	done, err := h.take(ctx, true) // of somebody who was let in already
	if err != nil {
		return "", err
	}
	defer done()
	return argon2id.CreateHash(password, params())
}

// check compares, and tells whether the hash was made with less than today's parameters.
func (h *hasher) check(ctx context.Context, password, hash string, known bool) (ok, old bool, err error) {
	p, _, _, err := argon2id.DecodeHash(hash)
	if err != nil {
		// An account whose hash cannot be read lets nobody in; others of the address still may.
		return false, false, h.waste(ctx, known)
	}
	if p.Memory > memoryMost {
		return false, false, fmt.Errorf("a stored hash asks for %d KiB", p.Memory)
	}
	done, err := h.take(ctx, known)
	if err != nil {
		return false, false, err
	}
	defer done()
	ok, err = argon2id.ComparePasswordAndHash(password, hash)
	old = p.Memory < params().Memory || p.Iterations < params().Iterations
	return ok, old, err
}

// waste takes as long as a check.
func (h *hasher) waste(ctx context.Context, known bool) error {
	done, err := h.take(ctx, known)
	if err != nil {
		return err
	}
	defer done()
	_, err = argon2id.ComparePasswordAndHash("x", h.dummy)
	return err
}
