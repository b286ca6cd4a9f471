namespace Cardassay.Agent.Commands;

/// <summary>
/// Tells whoever stands at the board how far the cards of a standing order are: a line when that changes, and an LED. The collector decides
/// what is so; a board that does not hear of it shows what it heard last.
/// </summary>
/// <param name="led">The LED; null without one.</param>
/// <param name="tell">Writes a line.</param>
internal sealed class CardSigns(BoardLed? led, Action<AgentEvent, string> tell)
{
    private readonly Dictionary<string, string> _said = new(StringComparer.Ordinal);
    private Sign _sign;
    private bool _isLit;
    private bool _hasFailed;

    private enum Sign
    {
        Off,
        Blinking,
        On,
    }

    /// <summary>Takes over what the collector says of the cards of this board.</summary>
    internal void Show(IReadOnlyCollection<V1.CardStep> steps)
    {
        foreach (V1.CardStep step in steps)
        {
            string line = $"{step.DiskName}: {(step.Card.Length > 0 ? step.Card : step.Identity)}, {step.Text}";
            if (!_said.TryGetValue(step.DiskName, out string? before) || before != line)
            {
                _said[step.DiskName] = line;
                tell(AgentEvent.CardStep, line);
            }
        }

        foreach (string gone in _said.Keys.Except(steps.Select(s => s.DiskName)).ToList())
        {
            _said.Remove(gone);
        }

        // A card that is done is what the hand at the bench waits for; what waits for that hand comes next.
        Sign sign = steps.Any(s => s.State is V1.CardStep.Types.State.Done or V1.CardStep.Types.State.Resting) ? Sign.On
            : steps.Any(s => s.State is V1.CardStep.Types.State.NoSticker or V1.CardStep.Types.State.NoConsent
                or V1.CardStep.Types.State.Skipped) ? Sign.Blinking
            : Sign.Off;
        if (sign != _sign)
        {
            _sign = sign;
            Light(sign == Sign.On);
        }
    }

    /// <summary>To be called about once a second: turns an LED that blinks on and off.</summary>
    internal void Blink()
    {
        if (_sign == Sign.Blinking)
        {
            Light(!_isLit);
        }
    }

    /// <summary>Turns the LED off: nobody watches the cards any more.</summary>
    internal void End() => Light(false);

    private void Light(bool on)
    {
        _isLit = on;
        if (led is null || _hasFailed || led.Light(on) is not { } problem)
        {
            return;
        }

        _hasFailed = true;
        tell(AgentEvent.CardStep, $"the LED shows nothing from here on: {problem}");
    }
}
