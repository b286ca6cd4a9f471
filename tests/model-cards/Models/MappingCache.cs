namespace Cardassay.ModelCards.Tests.Models;

/// <summary>Keeps the map of the 1.2 GiB used last in its fast memory, in pieces of 4 MiB; elsewhere it reads a piece of map first.</summary>
internal sealed class MappingCache : CardModel
{
    public const double MissMs = 0.6;
    public const int PieceBytes = 4 << 20, PiecesHeld = 307;

    private readonly LinkedList<long> _order = [];
    private readonly Dictionary<long, LinkedListNode<long>> _held = [];

    public override long ReadNs(long atNs, long offset, int length) => Look(offset) + base.ReadNs(atNs, offset, length);

    public override long WriteNs(long atNs, long offset, int length) => Look(offset) + base.WriteNs(atNs, offset, length);

    private long Look(long offset)
    {
        long piece = offset / PieceBytes;
        if (_held.TryGetValue(piece, out LinkedListNode<long>? node))
        {
            _order.Remove(node);
            _order.AddFirst(node);
            return 0;
        }

        if (_held.Count == PiecesHeld)
        {
            _held.Remove(_order.Last!.Value);
            _order.RemoveLast();
        }

        _held.Add(piece, _order.AddFirst(piece));
        return Ns(MissMs);
    }
}
