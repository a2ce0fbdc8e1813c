/* What a step does to asepsis, for the general-purpose model checker: written from the language's own description and
   sharing no code with the engine. The first thing that goes wrong ends the search, so nothing is carried on.

   Before this file come the sizes (N_THINGS and so on) and the tables KIND, ROLE,
   HELD_IN, SKIN, PROOF, SHARP, SHARPS, COUNTED, FIRE, TOP_AT, WORN_AT, REST_AT and RESTING. Names are numbers; in the
   tables, as in the world, 0 means none and any other value is a number plus one. */

typedef unsigned char byte_;
enum { CONTAMINATED, CLEAN, DISINFECTED, STERILE };
enum { PERSON, SURFACE, SITE, ITEM, PACK };

struct World {
    byte_ level[N_THINGS], soiled[N_THINGS], away[N_THINGS]; /* away: for a pack 1 once opened; for anything 2 once discarded or handed over */
    byte_ top[N_TOPS], under[N_WORNS], worn[N_WORNS], rests[N_RESTS];
    byte_ counted[N_COUNTED], owed[N_COUNTED], wet[N_WETS];
    byte_ facts[N_FACTS], done[N_FLAGS], finished[N_PHASES], choice[N_CHOICES], answer[N_QUESTIONS], ended;
};

static int bad;
#define SLIP do { bad = 1; } while (0)

static int top_of(struct World *w, int x) { return TOP_AT[x] ? w->top[TOP_AT[x] - 1] : 0; }
static int worn_by(struct World *w, int x) { return WORN_AT[x] ? w->worn[WORN_AT[x] - 1] : 0; }

static int outside(struct World *w, int x) {
    int over;
    while ((over = top_of(w, x)) != 0) x = over - 1;
    return x;
}

static int brings(struct World *w, int x) {
    return w->level[x] == DISINFECTED && KIND[x] == SITE ? STERILE : w->level[x];
}

static int in_field(struct World *w, int x) {
    if (w->ended) return 0;
    if (KIND[x] == SITE) return w->level[x] >= DISINFECTED;
    if (w->level[x] < STERILE) return 0;
    return KIND[x] == SURFACE || (worn_by(w, x) && KIND[worn_by(w, x) - 1] != ITEM);
}

static void settle(struct World *w, int x) {
    int i, item, lying;
    for (i = 0; i < N_RESTING; i++) {
        item = RESTING[i];
        if (!w->rests[i] || outside(w, w->rests[i] - 1) != x) continue;
        lying = outside(w, item);
        if (lying == x) continue;
        if (w->level[lying] > w->level[x] || (w->soiled[x] && !w->soiled[lying])) {
            if (w->level[lying] > w->level[x]) w->level[lying] = w->level[x];
            w->soiled[lying] |= w->soiled[x];
            settle(w, lying);
        }
    }
}

static void lower(struct World *w, int x, int level) {
    if (w->level[x] > level) w->level[x] = level;
    settle(w, x);
}

static void soil(struct World *w, int x) {
    if (w->soiled[x]) return;
    if (SKIN[x]) { SLIP; return; }
    w->soiled[x] = 1;
    settle(w, x);
}

static void fall(struct World *w, int x, int low) {
    if (w->level[x] <= low) return;
    if (in_field(w, x)) SLIP; else lower(w, x, low);
}

static void contact(struct World *w, int a, int b) {
    int x = outside(w, a), y = outside(w, b), low;
    if (x == y) return;
    low = brings(w, x) < brings(w, y) ? brings(w, x) : brings(w, y);
    fall(w, x, low);
    fall(w, y, low);
    if (w->soiled[x] || w->soiled[y]) { soil(w, x); soil(w, y); }
}

static void need(struct World *w, int x, int asked) { if (w->level[outside(w, x)] < asked) SLIP; }
static void require(struct World *w, int fact) { if (!w->facts[fact]) SLIP; }

static int in_pack(struct World *w, int x) { return HELD_IN[x] && !(w->away[HELD_IN[x] - 1] & 1); }
static void present(struct World *w, int x) { if ((w->away[x] & 2) || in_pack(w, x)) SLIP; }

static void lift(struct World *w, int x) { if (REST_AT[x]) w->rests[REST_AT[x] - 1] = 0; }

static void take(struct World *w, int owner, int x) {
    int wearer = worn_by(w, x);
    present(w, x);
    if (wearer && ROLE[wearer - 1] && ROLE[wearer - 1] != owner) SLIP;
    lift(w, x);
}

static void take_off(struct World *w, int x) {
    int on = worn_by(w, x), above;
    if (!on) return;
    on--;
    if (w->top[TOP_AT[on] - 1] == x + 1) {
        w->top[TOP_AT[on] - 1] = w->under[WORN_AT[x] - 1];
    } else {
        above = w->top[TOP_AT[on] - 1] - 1;
        while (w->under[WORN_AT[above] - 1] != x + 1) above = w->under[WORN_AT[above] - 1] - 1;
        w->under[WORN_AT[above] - 1] = w->under[WORN_AT[x] - 1];
    }
    w->under[WORN_AT[x] - 1] = w->worn[WORN_AT[x] - 1] = 0;
}

static void put_on(struct World *w, int x, int cover) {
    take_off(w, cover);
    lift(w, cover);
    w->under[WORN_AT[cover] - 1] = w->top[TOP_AT[x] - 1];
    w->top[TOP_AT[x] - 1] = cover + 1;
    w->worn[WORN_AT[cover] - 1] = x + 1;
}

/* The effects, in the order of the language's table. `owner` is a role's number plus one. */
static void opens(struct World *w, int hands, int pack) {
    present(w, pack);
    contact(w, hands, pack);
    w->away[pack] |= 1;
}
static void touches(struct World *w, int owner, int hands, int x) { take(w, owner, x); contact(w, hands, x); }
static void passes(struct World *w, int owner, int hands, int x, int others) {
    touches(w, owner, hands, x);
    contact(w, x, others);
}
static void uses(struct World *w, int owner, int hands, int x, int target, int use) {
    touches(w, owner, hands, x);
    present(w, target);
    if (KIND[target] == SITE) {
        if (COUNTED[x]) {
            if (!w->counted[COUNTED[x] - 1]) SLIP;
            w->owed[COUNTED[x] - 1] = 1;
        }
        if (FIRE[x]) w->wet[use] = 1;
    }
    contact(w, x, target);
}
static void presents(struct World *w, int owner, int x, int surface) {
    take(w, owner, x);
    present(w, surface);
    contact(w, x, surface);
    w->rests[REST_AT[x] - 1] = surface + 1;
}
static void lays(struct World *w, int owner, int hands, int x, int surface) {
    touches(w, owner, hands, x);
    presents(w, owner, x, surface);
}
static void guard(struct World *w, int item, int hands) { if (w->level[item] == STERILE) need(w, hands, DISINFECTED); }
static void covers(struct World *w, int owner, int hands, int x, int item, int wearers_hands) {
    take(w, owner, item);
    present(w, x);
    contact(w, hands, item);
    if (wearers_hands) guard(w, item, wearers_hands - 1);
    put_on(w, x, item);
    settle(w, outside(w, x));
}
static void dons(struct World *w, int owner, int hands, int item, int place) {
    take(w, owner, item);
    guard(w, item, hands);
    put_on(w, place, item);
}
static void uncovers(struct World *w, int hands, int x) {
    int over = top_of(w, x);
    if (!over) { SLIP; return; }
    contact(w, hands, x);
    take_off(w, over - 1);
    settle(w, outside(w, x));
}
static void doffs(struct World *w, int owner, int item) {
    int on = worn_by(w, item);
    if (!on || ROLE[on - 1] != owner || top_of(w, on - 1) != item + 1) { SLIP; return; }
    take_off(w, item);
}
static void makes(struct World *w, int x, int level) {
    int over = outside(w, x);
    present(w, x);
    w->level[over] = level;
    w->soiled[over] = 0;
}
static void wets(struct World *w, int x) {
    int over = top_of(w, x), under;
    present(w, x);
    if (!over || PROOF[over - 1]) return;
    under = w->under[WORN_AT[over - 1] - 1];
    lower(w, over - 1, brings(w, under ? under - 1 : x));
}
static void contaminates(struct World *w, int x) { present(w, x); lower(w, outside(w, x), CONTAMINATED); }
static void soils(struct World *w, int x) { present(w, x); soil(w, outside(w, x)); }
static void counts(struct World *w, int x) {
    present(w, x);
    if (!COUNTED[x]) return;
    w->counted[COUNTED[x] - 1] = 1;
    w->owed[COUNTED[x] - 1] = 0;
}
static void discards(struct World *w, int owner, int x, int container) {
    take(w, owner, x);
    if (container) present(w, container - 1);
    if (SHARP[x] && !(container && SHARPS[container - 1])) SLIP;
    w->away[x] |= 2;
}
static void hands_over(struct World *w, int owner, int x) { take(w, owner, x); w->away[x] |= 2; }

static void ignite(struct World *w) {
    int i;
    for (i = 0; i < N_WETS; i++) if (w->wet[i]) SLIP;
}

static void finish(struct World *w) {
    int x;
    for (x = 0; x < N_THINGS; x++) {
        if (w->soiled[x] && !(w->away[x] & 2)) SLIP;
        if (top_of(w, x)) SLIP;
        if (SHARP[x] && !in_pack(w, x) && !(w->away[x] & 2)) SLIP;
        if (COUNTED[x] && w->owed[COUNTED[x] - 1]) SLIP;
    }
}
