#include "workload.h"

struct text {
    int length;
    char characters[41];
};

static void set(struct text *text, const char *literal) {
    text->length = 0;
    while (literal[text->length] != '\0' && text->length < 40) {
        text->characters[text->length] = literal[text->length];
        text->length++;
    }
}

static void append(struct text *text, const char *characters, int length) {
    for (int index = 0; index < length && text->length < 40; index++)
        text->characters[text->length++] = characters[index];
}

static void append_number(struct text *text, int number) {
    char digits[8];
    int count = 0;
    unsigned rest = number < 0 ? -number : number;
    do {
        digits[sizeof digits - ++count] = '0' + rest % 10;
        rest /= 10;
    } while (rest > 0);
    if (number < 0)
        digits[sizeof digits - ++count] = '-';
    append(text, digits + sizeof digits - count, count);
}

static int compare(const struct text *a, const struct text *b) {
    int common = a->length < b->length ? a->length : b->length;
    for (int index = 0; index < common; index++) {
        int difference = (unsigned char)a->characters[index] - (unsigned char)b->characters[index];
        if (difference != 0)
            return difference;
    }
    return a->length - b->length;
}

static bool equals(const struct text *text, const char *literal, int length) {
    if (text->length != length)
        return false;
    for (int index = 0; index < length; index++)
        if (text->characters[index] != literal[index])
            return false;
    return true;
}

/* The place of the first occurrence, from 1; 0 where there is none. */
static int find(const struct text *text, const char *wanted, int length) {
    for (int start = 0; start + length <= text->length; start++) {
        int index = 0;
        while (index < length && text->characters[start + index] == wanted[index])
            index++;
        if (index == length)
            return start + 1;
    }
    return 0;
}

/* `length` characters from place `start` on, which counts from 1. */
static void middle(struct text *result, const struct text *text, int length, int start) {
    result->length = 0;
    append(result, text->characters + start - 1, length);
}

static struct text kept[49], greatest;
static int32_t changes, letters, orders;
static int16_t bed, colon, comma;

void scan(void) {
    bed = bed % 48 + 1;
    int share = (int)(inputs & 255) * 100 / 255;
    const char *state = share < 30 ? "dry" : share < 70 ? "moist" : "wet";

    struct text text, line, name, rest;
    set(&text, "Bed ");
    append_number(&text, bed);
    append(&text, ": ", 2);
    set(&line, state);
    append(&text, line.characters, line.length);
    line = text;
    append(&line, ", ", 2);
    append_number(&line, share);
    append(&line, " %, ", 4);
    append_number(&line, (int)(inputs >> 8 & 255) / 4 - 10);
    append(&line, " deg", 4);

    colon = find(&line, ":", 1);
    comma = find(&line, ", ", 2);
    middle(&name, &line, colon - 1, 1);
    middle(&rest, &line, line.length - colon - 1, colon + 2);
    letters += name.length + rest.length;
    if (equals(&name, "Bed 17", 6) || equals(&rest, "dry, 0 %, -10 deg", 17))
        letters += 1000;

    if (compare(&line, &kept[bed]) != 0) {
        changes++;
        kept[bed] = line;
    }
    if (compare(&line, &greatest) > 0) {
        greatest = line;
        orders += line.length;
    } else if (bed == 48) {
        greatest.length = 0;
    }
    if (compare(&kept[bed], &kept[49 - bed]) < 0)
        orders++;
}

uint32_t digest(uint32_t sum) {
    sum = fold(fold(sum, (uint32_t)changes), (uint32_t)letters);
    sum = fold(sum, (uint32_t)orders);
    return fold(sum, (uint16_t)colon | (uint32_t)(uint16_t)comma << 16);
}
