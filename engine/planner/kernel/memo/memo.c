/* A transposition table of bounded size, from sub-problems to bounds of their cost.
 *
 * Open addressing in windows of eight slots, constant time. It doubles until the memory allowed is
 * used, then the entry of least effort in the window gives way: an entry lost costs time, never
 * truth. Tables that keep the larger sub-tree: D. M. Breuker, J. W. H. M. Uiterwijk and H. J. van
 * den Herik, ICCA Journal 17(4), 1994 (from memory). */
#include <stdlib.h>
#include <string.h>
#include "memo.h"

enum { WINDOW = 8, FIRST_CAPACITY = 1 << 12 };

static uint64_t hash_key(const Word *key, size_t words)
{
    uint64_t h = 0x9E3779B97F4A7C15ull;
    for (size_t i = 0; i < words; i++) {
        h ^= key[i];
        h *= 0xFF51AFD7ED558CCDull;
        h ^= h >> 32;
    }
    return h ? h : 1;
}

static Entry *slot_at(const Memo *memo, size_t index)
{
    return (Entry *)(memo->slots + index * memo->stride);
}

static Word *key_of(Entry *entry)
{
    return (Word *)(entry + 1);
}

int memo_open(Memo *memo, size_t key_words, size_t most_bytes)
{
    memo->key_words = key_words;
    memo->stride = sizeof(Entry) + key_words * sizeof(Word);
    memo->capacity = FIRST_CAPACITY;
    memo->most = FIRST_CAPACITY;
    memo->count = 0;
    while (memo->most * 2 * memo->stride <= most_bytes)
        memo->most *= 2;
    memo->slots = calloc(memo->capacity, memo->stride);
    return memo->slots != NULL;
}

void memo_close(Memo *memo)
{
    free(memo->slots);
    memo->slots = NULL;
}

static Entry *seek(const Memo *memo, uint64_t hash, const Word *key, Entry **vacant)
{
    for (size_t i = 0; i < WINDOW; i++) {
        Entry *entry = slot_at(memo, (hash + i) & (memo->capacity - 1));
        if (!entry->in_use) {
            if (vacant && !*vacant)
                *vacant = entry;
            return NULL;
        }
        if (entry->hash == hash && !memcmp(key_of(entry), key, memo->key_words * sizeof(Word)))
            return entry;
    }
    return NULL;
}

Entry *memo_find(Memo *memo, const Word *key)
{
    return seek(memo, hash_key(key, memo->key_words), key, NULL);
}

static Entry *least_effort(const Memo *memo, uint64_t hash)
{
    Entry *least = NULL;
    for (size_t i = 0; i < WINDOW; i++) {
        Entry *entry = slot_at(memo, (hash + i) & (memo->capacity - 1));
        if (!least || entry->effort < least->effort)
            least = entry;
    }
    return least;
}

static void move_entry(Memo *memo, const Entry *old)
{
    Entry *vacant = NULL;
    seek(memo, old->hash, (const Word *)(old + 1), &vacant);
    if (!vacant)
        vacant = least_effort(memo, old->hash);
    else
        memo->count++;
    memcpy(vacant, old, memo->stride);
}

static int grow(Memo *memo)
{
    Memo wider = *memo;
    wider.capacity *= 2;
    wider.count = 0;
    wider.slots = calloc(wider.capacity, wider.stride);
    if (!wider.slots)
        return 0;
    for (size_t i = 0; i < memo->capacity; i++) {
        Entry *entry = slot_at(memo, i);
        if (entry->in_use)
            move_entry(&wider, entry);
    }
    free(memo->slots);
    *memo = wider;
    return 1;
}

Entry *memo_claim(Memo *memo, const Word *key)
{
    uint64_t hash = hash_key(key, memo->key_words);
    Entry *vacant = NULL, *entry = seek(memo, hash, key, &vacant);
    if (entry)
        return entry;
    if ((!vacant || memo->count * 4 > memo->capacity * 3) && memo->capacity < memo->most
        && grow(memo)) {
        vacant = NULL;
        seek(memo, hash, key, &vacant);
    }
    if (vacant)
        memo->count++;
    else
        vacant = least_effort(memo, hash);
    memset(vacant, 0, sizeof(Entry));
    vacant->hash = hash;
    vacant->in_use = 1;
    vacant->test = NO_TEST;
    vacant->upper = 1e300;
    memcpy(key_of(vacant), key, memo->key_words * sizeof(Word));
    return vacant;
}
