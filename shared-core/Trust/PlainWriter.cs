using System.Text;

namespace Cardassay.Trust;

/// <summary>
/// Writes text for people: every line goes through <see cref="PlainText"/> on its way, whoever wrote it. Both programs put it in front of
/// standard output and standard error, so that no sentence needs to think of what a tag or a board's name may hold.
/// </summary>
public sealed class PlainWriter(TextWriter to) : TextWriter(to.FormatProvider)
{
    private char _half;

    /// <summary>The writer behind it, for what moves the cursor by itself and cleans its own text.</summary>
    public TextWriter Behind { get; } = to;

    /// <inheritdoc/>
    public override Encoding Encoding => Behind.Encoding;

    /// <inheritdoc/>
    public override string NewLine => "\n";

    /// <inheritdoc/>
    public override void Write(char value)
    {
        if (char.IsHighSurrogate(value))
        {
            WriteHalf();
            _half = value; // its other half comes next
            return;
        }

        string whole = _half != 0 && char.IsLowSurrogate(value) ? new string([_half, value]) : value.ToString();
        if (whole.Length == 1)
        {
            WriteHalf();
        }

        _half = '\0';
        Behind.Write(PlainText.CleanLines(whole));
    }

    /// <inheritdoc/>
    public override void Write(string? value) => Write(value.AsSpan());

    /// <inheritdoc/>
    public override void Write(char[] buffer, int index, int count) => Write(buffer.AsSpan(index, count));

    /// <inheritdoc/>
    public override void Write(ReadOnlySpan<char> buffer)
    {
        if (_half != 0 && buffer.Length > 0)
        {
            Write(buffer[0]);
            buffer = buffer[1..];
        }

        if (buffer.Length > 0 && char.IsHighSurrogate(buffer[^1]))
        {
            Behind.Write(PlainText.CleanLines(new string(buffer[..^1])));
            _half = buffer[^1];
            return;
        }

        Behind.Write(PlainText.CleanLines(new string(buffer)));
    }

    /// <inheritdoc/>
    public override void WriteLine(string? value)
    {
        Write(value.AsSpan());
        WriteLine();
    }

    /// <inheritdoc/>
    public override void Flush() => Behind.Flush();

    private void WriteHalf()
    {
        if (_half != 0)
        {
            Behind.Write(PlainText.Replacement);
            _half = '\0';
        }
    }
}
