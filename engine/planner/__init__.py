"""The planner: the plan of least expected bench minutes, proved.

**State.** A sub-problem is (weights of the fault classes still in question, openings made, place,
whether a short was found, requirements met). A place is a supply arrangement with a rig. Weights
are joint odds of the class and of having come here; nothing is normalised. A class gathers the
faults whose rows agree in every test. Where a test splits a class between outcomes, the set of
classes left is no sufficient key: the memo's key also holds which split tests were done, with which
outcome, as long as that still tells in the weights or the test would still tell something. Openings
that no test left asks for are taken out of the key, and so is a short found where it bars no test
that would still tell something; and so are requirements met for which no remedy worth naming and no
test worth doing waits.

**Recurrence.** With w(S) the weight of S, s(t) the set-up minutes to test t from here and S_o what
is left after outcome o,

    V(S) = min( min_r sum_k w_k (minutes_r + W [r does not cure k]),
                min_t w(S) (s(t) + minutes_t) + sum_o V(S_o) ),

r over the remedies and t over the tests open to S: those whose requirements were met on the way
here (`requirements.py`; one that no test left at the plan's start could meet is waived there, or
where it is strict never met), closed-only tests while nothing is opened, and those on mains or
high-voltage DC while no answer on the way here showed a short (`engine.model.shorts`). So what o
leaves open is part of S_o, and an answer may be worth less than nothing. A test that tells nothing
is done where it meets what something else waits for.

What each class costs at best is taken out first ("regret" is what a remedy costs more). V is
concave and homogeneous in the weights: it is a minimum over plans, each linear in them.
Openings are made when the next test needs them, never ahead, but for leads: before a test that is
read over leads more of them may be brought out, by bundles (`bundles.py`), of those that a test
left asks for and that are in reach by then; hands go in for it, if not on the way anyhow. A test is
done once in a branch.

**Search.** Branch and bound on the AND/OR graph of sub-problems, depth first, with a memo (a
transposition table) of lower and upper bounds; tests in the order of what the pair bound says that
each costs when done first (greedy plans: `price of a bit x bits told - minutes`, the price learned
from sub-problems solved); first upper bound from greedy plans at several prices, then from one
whose every step is tried out, each of the 24 likeliest tests followed by the best plan known from
there (after Tesauro and Galperin, NIPS 9, 1996; from memory); coarse at first, small regrets left
alone, and finer whenever the budget is raised: what a coarser pass settled is tried anew.
The root's budget is raised in steps from the lower bound, so that the bound is worth something
whenever time runs out. The memo is a table of bounded size in which the entry of least effort gives
way; what is lost is searched again when the plan is written out.

**Out of time.** The plan is finished greedily with a bounded number of further nodes; what is left
then stops. Where outcomes split, a whole greedy plan may have more nodes than can be counted, so
the first ones stop wherever the regret of stopping is small beside the root's (a hundredth, then a
tenth of that ...). Every plan is priced anew from its own nodes: such cuts cost minutes, never
truth, and the lower bound does not hang on them.

**Bounds**, each switched off by `bounds=ALL - {Bound.X}` or `ALL & ~Bound.X`; the optimum stays.
All but revelation speak of the tests open at the node: a plan that has fewer of them later on, for
openings made or a short found, is one of the plans that they bound.

- *Information.* A Lagrange multiplier x on the bits to be bought, the dual price of a bit. A plan
  that names remedy clusters buys I(cluster; leaf) bits in all. A test t used on mass m in disjoint
  sub-problems sells at most the bits of a source with outcome masses capped by those of t here:
  concave in m, so at price x a bit its reduced profit is at most P_t(x), and cost >= x D - sum_t
  P_t(x) for every x > 0. Classes left in a foreign cluster pay their regret f instead: by concavity
  of entropy D x becomes sum_k w_k min(x bits_k, f_k - x log2 e). The same prices give each test a
  floor: doing t first sells to all, so P_t - (x bits - minutes w) is added.
- *Setup.* A change of place or an opening is paid at least once by all mass that uses a test
  behind it; sharing its minutes among those tests in any way keeps the sum below the truth.
- *Access.* Classes that no test parts without a further opening arrive together until it is made:
  each such cell pays its best opening and goes on, or stops. This counts openings alone; the
  information bound and the pairs then count tests alone, and regrets are divided between them.
- *Pairs.* Two classes are parted by some test that both do, or share a leaf. Each class has slack
  for every test, place and opening: what its own way pays for them if it meets them. A pair charges
  at most what both have of slack for each test that parts it, with the way there; and it speaks for
  an equal part a of both weights, charging at most a (f_j + f_k) for the remedy that serves both
  best, so that all pairs in a leaf charge no more than its regrets while no weight is spoken for
  twice. A set-up is paid by every class behind it, once. This is a feasible dual solution of a
  linear relaxation, by dual ascent: first the pairs that are dear to confuse and that few and dear
  tests part. The slack that all are left with for a test is its reduced cost; it, and what the
  set-up takes beyond it, is added where the test is done first.
- *Revelation.* An answer given for nothing can't raise the cost, so long as it takes no test away,
  nor the way to a test on which leads that are still asked for could be brought out:
  V(S) >= sum_o V(S_o) with no set-up, S_o being open to the tests that S is open to. So a part left
  by an answer that shows a short is looked up as if it did not, or not counted where that matters.
  A child is bounded by the parts that a test explored before would leave of it, and a node by the
  children of any of its tests, less the way back.
- *Groups.* Once the search has gone on for a while: bits with a dual price of their own within each
  group of classes, the groups being the sets at the nodes of the best plan. For any groups g and
  masses v_g(k) >= 0, phi(S) = sum_g sum_k v_g(k) log2(v_g(S) / v_g(k)) is concave and
  homogeneous in the weights. Doing t on S' lowers it by sum_g I_g(t; k), which for every q is at
  most sum_g sum_k v_g(k) KL(row of k in t || q_gt); t costs its minutes on S' and is done once in a
  branch, so over all its sub-problems it lowers phi by more than it costs by at most
  P_t = sum_k max(0, sum_g v_g(k) KL - w_k c_t(k)). A leaf with remedy r has phi at most
  sum_g sum_k v_g(k) log2(1 / q_gr(k)) for every q_gr that sums to no more than 1. Thus

      V >= sum_k min_r (w_k regret_rk + sum_g v_g(k) (log2(v_g / v_g(k)) - log2(1 / q_gr(k))))
           - sum_t P_t.

  c_t(k) adds to the minutes shares of openings and of directed cuts (`tolls.py`), which k pays at
  least once if it uses any test behind them: the shares, free for each class, sum to 1 over these
  tests. v and q are climbed to at the root by gradients of the smoothed bound, in Adam's steps, the
  shares by multiplicative weights; whatever they are, the bound holds, so they serve every node,
  with its weights and without the cuts it has crossed. They give each test a floor, too: done
  first, all pay for it, so P_t - (what it then earns) is added. They are kept where they tell about
  as much of the root as the search knew by then; pairs of many classes are then left alone.
- *First test.* Either stop here or pay the cheapest test on all of w(S).
- *Rollout.* The greedy plans' cost; without it the search starts from stopping at once.

**Complexity.** Optimal decision trees are NP-hard (Hyafil and Rivest, IPL 5(1), 1976). Space and
time are bounded by the sub-problems met; one costs O(tests x classes / 8 + classes^2 x tests tried
before a pair is parted); a step of the climb O(memberships of classes in groups x tests). Chains of
stages have few sub-problems, narrow tests in any order many.

**Papers.** D. A. Huffman, Proc. IRE 40 (1952); K. R. Pattipati and M. G. Alexandridis, IEEE Trans.
SMC 20 (1990): and/or search for test sequencing with entropy bounds; D. P. Kingma and J. Ba,
arXiv:1412.6980, and Yu. Nesterov, Mathematical Programming 103, 2005, for climbing by smoothed
gradients; S. Arora, E. Hazan and S. Kale, Theory of Computing 8, 2012: multiplicative weights; M.
L. Fisher, Management Science 27(1), 1981: Lagrangian relaxation; D. Erlenkotter, Operations
Research 26(6), 1978: dual ascent; R. Marinescu and R. Dechter, Artificial Intelligence 173, 2009:
AND/OR branch and bound; J. B. Kadane and H. A. Simon (1977) and D. Heckerman, J. S. Breese and K.
Rommelse, CACM 38(3), 1995, for p/c order. **Ours differs** in set-ups as part of the state, in dual
prices of bits with priced set-ups, in the pair and revelation bounds, in prices by groups of
classes, and in stopping early wherever being wrong is cheaper than going on.

**Tried and left out**, measured on the shipped lamps and the random families: a floor from what a
class costs beyond its absence (half the nodes, no less time), tests that another one stands in for
(few there), narrow tests that provably can wait (rarely provable while a test of many classes is
left), pair charges raised in rounds (no higher), solving a sub-problem
without its lightest classes first (a bound within a tenth, and no less time), leaving out tests
that right after another one had better been done before it (as many nodes), groups from more plans
than the best or a longer climb (bounds at most a hundredth higher).

**Why C.** Plain Python visits a few hundred sub-problems a second, numpy gains little on sets of
ten classes, this kernel some twenty thousand. A compiler is needed at install anyway.
"""

from engine.planner.bounds import ALL, Bound
from engine.planner.planning import RunnerUp, cost_without, plan, runners_up

__all__ = ["ALL", "Bound", "RunnerUp", "cost_without", "plan", "runners_up"]
