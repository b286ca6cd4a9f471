using System.Text;
using Cardassay.Collector.Files;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>
/// Compares a published text with its pieces and names the first that differs. The text comes bit by bit and may be of any length: what is
/// held of it is what stands where one piece should.
/// </summary>
/// <param name="expected">The pieces.</param>
/// <param name="name">What to call the text.</param>
internal sealed class TextCheck(IEnumerable<Fragment> expected, string name) : IDisposable
{
    /// <summary>Characters quoted, and how many of them stand before the first that differs.</summary>
    private const int Most = 160;
    private const int Before = 100;

    private readonly IEnumerator<Fragment> _expected = expected.GetEnumerator();
    private readonly StringBuilder _other = new();
    private State _state = State.Begun;
    private int _same;
    private bool _heldReturn;
    private bool _goesOn;

    private enum State
    {
        Begun,
        Same,
        Differs,
        Decided,
        Behind,
    }

    private bool IsDecided => _state == State.Decided || _goesOn;

    /// <summary>No sentence, or one.</summary>
    internal static IEnumerable<string> Difference(IEnumerable<Fragment> expected, Stream actual, string name)
    {
        using var check = new TextCheck(expected, name);
        foreach (ReadOnlyMemory<char> piece in ForeignText.Pieces(actual, name).TakeWhile(_ => !check.IsDecided))
        {
            check.Add(piece.Span);
        }

        return check.End() is { } difference ? [difference] : [];
    }

    /// <summary>Goes on with the text.</summary>
    internal void Add(ReadOnlySpan<char> text)
    {
        foreach (char c in IsDecided ? [] : text)
        {
            if (_heldReturn && c != '\n')
            {
                Put('\r'); // a line may end in another way where the text was copied, but no other character is passed over
            }

            _heldReturn = c == '\r';
            if (!_heldReturn)
            {
                Put(c);
            }
        }
    }

    /// <summary>Ends the text: null, or a sentence.</summary>
    internal string? End()
    {
        if (_heldReturn)
        {
            Put('\r');
        }

        if (_state == State.Begun)
        {
            Next();
        }

        if (_state == State.Behind)
        {
            string behind = _goesOn ? _other.ToString() + "…" : _other.ToString().TrimEnd();
            return behind.Length == 0 ? null : $"{name}: \"{behind}\" follows behind what the records give.";
        }

        Fragment fragment = _expected.Current;
        string there = _state == State.Same ? fragment.Text[.._same] : _other.ToString();
        int from = Math.Max(0, _same - Before);
        return $"{name}, {fragment.Name}: it says \"{Short(there, from)}\"; the records give \"{Short(fragment.Text, from)}\".";
    }

    public void Dispose() => _expected.Dispose();

    private void Put(char c)
    {
        if (_state == State.Begun)
        {
            if (c == '\uFEFF')
            {
                return;
            }

            Next();
        }

        switch (_state)
        {
            case State.Same when c == _expected.Current.Text[_same]:
                if (++_same == _expected.Current.Text.Length)
                {
                    Next();
                }

                break;
            case State.Same:
                _other.Append(_expected.Current.Text, 0, _same);
                _state = State.Differs;
                goto case State.Differs;
            case State.Differs:
                _other.Append(c);
                _state = _other.Length == _expected.Current.Text.Length ? State.Decided : State.Differs;
                break;
            case State.Behind when _other.Length < Most:
                _other.Append(_other.Length == 0 && char.IsWhiteSpace(c) ? "" : c);
                break;
            case State.Behind:
                _goesOn |= !char.IsWhiteSpace(c);
                break;
        }
    }

    private void Next()
    {
        _same = 0;
        do
        {
            _state = _expected.MoveNext() ? State.Same : State.Behind;
        }
        while (_state == State.Same && _expected.Current.Text.Length == 0);
    }

    /// <summary>What is around the difference: the beginning of a long sentence may be the same.</summary>
    private static string Short(string text, int from)
    {
        string shown = (from > 0 ? "…" : "") + text[Math.Min(from, text.Length)..].Trim();
        return shown.Length > Most ? shown[..Most] + "…" : shown;
    }
}
